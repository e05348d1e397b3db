"""What a workshop's closed jobs say of its families: evidence replayed, counted, made figures."""
