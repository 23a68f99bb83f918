"""What can be found out of a layout and its runs. It imports the world; the world knows nothing of it."""
