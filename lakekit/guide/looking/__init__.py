"""What notebooks look at: patterns of a log, a year of a lake."""
