"""The commands of splitwright."""
