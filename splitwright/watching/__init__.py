"""A file that somebody edits, looked at again at each save (``splitwright watch``)."""
