"""Floor 4: findings to views, views to the weekly report, the card and the mail."""
