//! A job under study: the document turned into engine inputs, engines run, results kept.
