"""The front door's parts. Standard library only: they run before anything is installed."""
