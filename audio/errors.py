"""Errors of the audio room.

AudioError
├── FileError      a file that cannot be read or written as audio
├── PassageError   a stretch of a track that cannot be used (too short, silent, past the end)
├── MeasureError   a measurement or match that has no answer for this material
│   └── SilentError   since nothing sounds in it
├── ProcessError   a process that measured was ended from outside
└── DeviceError    a device that is not there or lacks the rate or channels, an engine that stopped
    └── NoDeviceError  since this machine has none at all, or nothing that could be asked

Each message says what is wrong, where, what was given and what to do next, in one line.
"""


class AudioError(Exception):
    """Anything the audio room refuses; the message is one line for the person at the keyboard."""


class FileError(AudioError):
    """A file that is missing, empty, cut short, corrupt, not audio, or holds samples that are not numbers."""


class PassageError(AudioError):
    """A passage that is too short, silent, or runs past the end of its track."""


class MeasureError(AudioError):
    """A measurement that has no answer for this material, or a match that cannot be reached."""


class SilentError(MeasureError):
    """A recording in which nothing sounds."""


class ProcessError(AudioError):
    """A process that measured was ended from outside; it says nothing of the material."""


class DeviceError(AudioError):
    """A playback device that is absent or unsuitable, or an engine that stopped."""


class NoDeviceError(DeviceError):
    """No sound device at all, or no sound system that could be asked; it says nothing of what a device would do."""
