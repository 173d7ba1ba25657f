"""Writers: a finished Pattern becomes sheets, cutting files, a build plan and a report."""
