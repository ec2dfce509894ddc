/* Files dropped or chosen go one after the other, each with its progress. Without this file the form does the same. */
"use strict";
const form = document.getElementById("drop");
if (form) {
  const field = form.querySelector("input[type=file]"), list = document.getElementById("dropped");
  const token = form.querySelector("input[name=csrfmiddlewaretoken]").value;
  let busy = false;

  function line(text, kind) {
    const row = document.createElement("p");
    row.className = kind ? "state " + kind : "";
    row.style.whiteSpace = "normal";
    row.textContent = text;
    list.append(row);
    return row;
  }

  function send(file) {
    return new Promise((done) => {
      const row = line(file.name + ": sending"), bar = document.createElement("progress");
      bar.max = 1; bar.setAttribute("aria-label", "Sending " + file.name);
      row.append(" ", bar);
      const request = new XMLHttpRequest(), data = new FormData();
      data.append("file", file); data.append("csrfmiddlewaretoken", token);
      request.open("POST", form.action);
      request.setRequestHeader("Accept", "application/json");
      request.upload.onprogress = (event) => { if (event.lengthComputable) bar.value = event.loaded / event.total; };
      request.upload.onload = () => { row.firstChild.textContent = file.name + ": finding the cards "; bar.removeAttribute("value"); };
      request.onerror = () => { row.remove(); line(file.name + ": not sent, the connection broke; drop it again", "held"); done(); };
      request.onload = () => {
        row.remove();
        let said = null;
        try { said = JSON.parse(request.responseText).said; } catch { said = null; }
        if (said) for (const one of said) line(one.text, one.good ? "accepted" : "held");
        else line(file.name + ": not kept. Say who you are, or log in again, then drop it again", "held");
        done();
      };
      request.send(data);
    });
  }

  async function all(files) {
    if (busy || !files.length) return;
    busy = true; list.textContent = "";
    let left = files.length;
    for (const file of files) { await send(file); left -= 1; }
    busy = false;
    const on = document.createElement("a");
    on.href = location.pathname; on.className = "button plain"; on.textContent = "Show what is to be keyed now";
    list.append(on); on.focus();
  }

  form.addEventListener("submit", (event) => { event.preventDefault(); all([...field.files]); });
  for (const kind of ["dragover", "dragenter"]) form.addEventListener(kind, (event) => { event.preventDefault(); form.classList.add("over"); });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => { event.preventDefault(); form.classList.remove("over"); all([...event.dataTransfer.files]); });
}
