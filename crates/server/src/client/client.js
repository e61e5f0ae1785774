// Sends what is accepted: the name, and the hash of exactly what the page shows.
const form = document.getElementById('accept');
form?.addEventListener('submit', async (event) => {
  event.preventDefault();
  const told = document.getElementById('told');
  const button = form.querySelector('button');
  button.disabled = true;
  try {
    const answer = await fetch(form.dataset.to, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ name: form.elements.name.value, sha256: form.dataset.sha256 }),
    });
    if (answer.ok) {
      location.reload();
      return;
    }
    told.textContent = (await answer.json()).error.message;
  } catch {
    told.textContent = form.dataset.unsent;
  }
  button.disabled = false;
});
