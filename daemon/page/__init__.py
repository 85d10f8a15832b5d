"""The page in the browser: looking, noting, changing the garden's file."""
