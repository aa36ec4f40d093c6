"""What every room uses: findings, checks that could not be made, errors for the user, words."""
