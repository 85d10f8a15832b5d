"""The garden's file: read, checked line by line, and completed to the settings of a garden."""
