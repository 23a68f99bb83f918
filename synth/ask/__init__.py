"""What is asked: the records of specs, and how items come in."""
