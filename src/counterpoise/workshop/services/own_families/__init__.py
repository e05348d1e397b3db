"""Files about families that a workshop writes itself: begun, looked over, tried, added."""
