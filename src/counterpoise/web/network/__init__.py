"""Reach the pages from phones: addresses, pairing codes, certificates of the workshop."""
