"""The daemon itself: a tick each minute, a pass each hour."""
