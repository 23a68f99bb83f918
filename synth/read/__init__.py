"""Questions read: from spec files, and off finished layouts."""
