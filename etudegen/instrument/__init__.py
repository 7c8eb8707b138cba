"""What the tube can do: its length, valves, partials, frequencies, fingerings and slides."""
