"""Pictures: one tree or one night, as SVG and as PNG."""
