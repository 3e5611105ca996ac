"""Levels where they count: test noise, microphone readings, voltmeter readings, sound pressure level, noise dose."""
