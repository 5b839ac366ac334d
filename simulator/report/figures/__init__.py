"""Figures: ink on paper, each a function of plain data."""
