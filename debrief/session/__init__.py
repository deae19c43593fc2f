"""What is open: recording, profile, assessment, playback clock, drawn envelopes, wording. No Qt."""
