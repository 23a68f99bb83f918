"""Layouts side by side: their measures, the Pareto front among them, one page that shows it all."""
