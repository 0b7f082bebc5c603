"""What is stored: tables, schema versions, history, tallies and queries; no decisions."""
