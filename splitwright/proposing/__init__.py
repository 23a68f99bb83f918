"""What ``propose``, ``tighter`` and ``watch`` share."""
