"""The whole-hall trial: feed, fuel and product together for hours of world time, with what can go wrong.

``run.production_run`` gives a report for each incident, ``run.steady_output`` the items an hour when nothing goes
wrong.
"""
