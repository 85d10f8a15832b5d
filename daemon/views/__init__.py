"""What the commands show: the days ahead, one tree and why, all trees, the machine."""
