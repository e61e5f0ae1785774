// The app is on the same computer, by HTTPS on its own port; the code to pair with travels after the #, which no browser
// sends to anybody.
const open = document.getElementById('open');
open.href = `https://${location.hostname}:${document.body.dataset.port}/${location.hash}`;
