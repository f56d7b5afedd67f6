// Runs before the page is drawn: while checks wait on this phone, what the book says stays hidden until start.js has
// found out which bows they are about.
if (localStorage.getItem("bracebook-unsent")) document.documentElement.toggleAttribute("data-looking", true);
