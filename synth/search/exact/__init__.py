"""Exact search: every box settled by a proof or a layout, piece by piece, over all cores."""
