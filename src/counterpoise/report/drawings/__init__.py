"""Drawn machines: a family's cutaway with what is to be done marked on it, and small drawings.

SVG texts that need no script: a page puts them in as they are, paper and PDF too.
"""
