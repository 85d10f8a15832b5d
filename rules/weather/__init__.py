"""Hourly weather: air, sun, gaps filled, members, and what a thermometer teaches of it."""
