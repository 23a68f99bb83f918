"""The layout files (formats, "Layout" and "Plan"): JSON and text in, JSON, text and pictures out."""
