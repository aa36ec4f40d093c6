"""What can be wrong with a campaign, and how it shows in the data."""
