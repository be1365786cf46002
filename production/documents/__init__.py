"""Paper for the workroom: cut tickets and bundle tags as PDF.

The modules take plain values, a `RunSnapshot` and its `Plan`, and know no Django. They import
reportlab, segno and shapely at the top, so import them inside the function that prints, never at
Django start-up.
"""
