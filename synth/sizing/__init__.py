"""Production arithmetic: from a wanted output to furnaces, rows, lines and fuel."""
