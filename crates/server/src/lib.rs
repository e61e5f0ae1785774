//! Serves jobs to browsers: the store, the HTTP interface, the live channel and the web app.
