// Puts the token of a one-time link into its field. It stands behind "#", which no browser sends anywhere; it goes out of
// the address bar at once. Without script it is pasted.
const field = document.getElementById('token');
const token = location.hash.slice(1);
if (field && token) {
  field.value = token;
  history.replaceState(null, '', location.pathname);
  field.closest('.field').hidden = true;
  document.querySelector('[data-first]')?.focus();
}
