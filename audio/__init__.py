"""All that touches sound: files, loudness, matching, giveaways, preparation, the playback engine."""
