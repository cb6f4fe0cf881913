"use strict";
// What the toolkit's page lacks for a tablet: a finger that draws, and where exactly it draws.
(() => {
  let socket = null;

  // The toolkit opens the one socket there is; its messages take the size in pixels along.
  window.WebSocket = class extends WebSocket {
    constructor(...given) {
      super(...given);
      socket = this;
      this.addEventListener("open", () => setTimeout(sayPixels, 100));
      this.addEventListener("open", typeHere);
      this.addEventListener("message", onMessage);
    }
  };

  function screen() {
    return document.querySelector(".xterm-screen");
  }

  // The app says whether letters are typed now: else a tablet's own keyboard would hide its half.
  function onMessage(event) {
    if (typeof event.data !== "string") return;
    const [kind, wanted] = JSON.parse(event.data);
    const typed = document.querySelector(".xterm-helper-textarea");
    if (kind !== "keyboard" || !typed) return;
    typed.inputMode = wanted ? "text" : "none";
    typed.blur();
    typed.focus();
  }

  // What is typed goes where the terminal listens; on a tablet that brings its keyboard up.
  function typeHere() {
    document.querySelector(".xterm-helper-textarea")?.focus();
  }

  function sayPixels() {
    const box = screen()?.getBoundingClientRect();
    if (box && socket?.readyState === WebSocket.OPEN) {
      const size = { width: Math.round(box.width), height: Math.round(box.height) };
      socket.send(JSON.stringify(["pixels", size]));
    }
  }
  window.addEventListener("resize", () => setTimeout(sayPixels, 100));

  // The terminal understands a mouse alone: one finger becomes its left button.
  function asMouse(kind, touch, buttons) {
    const where = { clientX: touch.clientX, clientY: touch.clientY, button: 0, buttons };
    screen().dispatchEvent(new MouseEvent(kind, { bubbles: true, cancelable: true, view: window, ...where }));
  }
  function onTouch(event, kind, buttons) {
    if (!screen()?.contains(event.target) || event.touches.length > 1) return;
    event.preventDefault();
    asMouse(kind, event.changedTouches[0], buttons);
    if (kind === "mouseup") typeHere();
  }
  const active = { passive: false, capture: true };
  document.addEventListener("touchstart", (event) => onTouch(event, "mousedown", 1), active);
  document.addEventListener("touchmove", (event) => onTouch(event, "mousemove", 1), active);
  document.addEventListener("touchend", (event) => onTouch(event, "mouseup", 0), active);
  document.addEventListener("touchcancel", (event) => onTouch(event, "mouseup", 0), active);
  document.addEventListener("contextmenu", (event) => event.preventDefault());

  document.addEventListener("DOMContentLoaded", () => {
    document.getElementById("again").addEventListener("click", () => location.replace("/"));
  });
})();
