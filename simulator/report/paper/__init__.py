"""Paper: sheets as data, typeset to PDF."""
