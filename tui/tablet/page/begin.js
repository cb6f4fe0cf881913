"use strict";
// The token is behind the # of the address: a browser sends that to nobody by itself.
const token = location.hash.slice(1);
const words = document.getElementById("words");
const button = document.getElementById("begin");
history.replaceState(null, "", location.pathname);
if (!token) {
  words.textContent = "This page needs a code. Ask the station to show you one.";
  button.disabled = true;
}
button.addEventListener("click", async () => {
  button.disabled = true;
  words.textContent = "One moment ...";
  try {
    const answer = await fetch("/begin", { method: "POST", body: token, credentials: "same-origin" });
    if (answer.ok) {
      location.replace("/");
      return;
    }
    words.textContent = await answer.text();
  } catch {
    words.textContent = "The station cannot be reached. Tell the staff.";
  }
});
