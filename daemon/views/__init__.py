"""What the commands show: the days ahead, one tree and its reasons, all trees, the machine."""
