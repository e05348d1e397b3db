"""Parts and their prices: suppliers' lists, offers, stock records."""
