"""The commands: a module each, or a folder."""
