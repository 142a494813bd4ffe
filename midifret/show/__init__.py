"""Views: terminal screens, reports and documents made of values; they decide nothing."""
