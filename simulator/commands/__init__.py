"""What the commands of the command line do; the words are given in ``simulator.cli``."""
