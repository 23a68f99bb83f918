"""Known builds: those that come with splitwright (``atlas``) and those of the user's own searches (``cache``)."""
