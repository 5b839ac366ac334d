"""The offline page: one HTML file that asks the network for nothing."""
