"""Where weather comes from: the services, what they last answered, and what can be trusted."""
