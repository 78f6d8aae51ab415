"""Files that leave the program."""
