// A file to make the precompiled headers with.
