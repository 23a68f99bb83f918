"""A candidate run, judged, stripped and measured."""
