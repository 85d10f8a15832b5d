"""Where weather comes from: providers, and which of their answers is trusted."""
