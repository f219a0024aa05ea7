"""Plane geometry in millimetres: Beziers, polygons, widths. Knows no cards."""
