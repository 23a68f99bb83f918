"""What every page is made with: templates, styles and scripts, and how they are put together into one file."""
