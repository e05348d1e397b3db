"""Texts in another language: one folder of catalogs each, put in where a text is shown."""
