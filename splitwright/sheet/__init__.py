"""Pages to take along: one self-contained HTML file, from templates, styles and scripts that are put into it."""
