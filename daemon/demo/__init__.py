"""An invented garden in an invented, eventful week."""
