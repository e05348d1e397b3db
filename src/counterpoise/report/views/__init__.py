"""What each page and command shows, as plain records made once for both faces."""
