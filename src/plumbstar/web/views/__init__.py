"""What each page shows, as plain values, and the long thinking behind them."""
