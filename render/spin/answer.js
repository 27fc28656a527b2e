
"use strict";
// The customer's answer: a design chosen, and a text to send back. Nothing is sent from here.
(() => {
  const element = (id) => document.getElementById(id);
  const data = JSON.parse(element("replies").textContent);
  const choices = [...document.querySelectorAll("input[name=scheme]")];
  const reply = element("reply"), remark = element("remark");
  const unchosen = element("unchosen"), offer = element("choose-seen"); // where there are several
  const stage = element("stage");

  function chosen() {
    return choices.length ? choices.findIndex((input) => input.checked) : 0;
  }

  function write() {
    const which = chosen();
    element("ready").hidden = which < 0;
    if (unchosen) unchosen.hidden = which >= 0;
    if (which < 0) return;
    const more = remark.value.trim();
    reply.value = data.replies[which] + (more ? `\n${data.remark} ${more}` : "");
    const mail = { subject: data.title, body: reply.value.replaceAll("\n", "\r\n") };
    const fields = Object.entries(mail).map(([name, text]) => `${name}=${encodeURIComponent(text)}`);
    element("mail").href = `mailto:?${fields.join("&")}`;
    element("copied").textContent = "";
  }

  const seen = () => choices[Number(stage.dataset.design) || 0];

  // The design that is looked at is offered; it is chosen by the customer alone.
  function offerSeen() {
    offer.textContent = `Choose ${seen().dataset.letter}, as you see it now`;
  }

  async function copy() {
    try {
      await navigator.clipboard.writeText(reply.value);
    } catch {
      // An old browser, or one that forbids it for a file.
      reply.select();
      document.execCommand("copy");
    }
    element("copied").textContent = "Copied: paste it into a message to your builder.";
  }

  for (const input of choices) {
    input.addEventListener("change", () => {
      // What is chosen is what is seen.
      document.querySelector(`input[name=design][data-letter=${input.dataset.letter}]`)?.click();
      write();
      // A phone's screen ends above the text to send back.
      element("ready").scrollIntoView({ block: "nearest" });
    });
  }
  if (offer) {
    offer.addEventListener("click", () => {
      const wanted = seen();
      wanted.click();
      wanted.focus({ preventScroll: true }); // the button is gone
    });
    new MutationObserver(offerSeen).observe(stage, { attributeFilter: ["data-design"] });
    offerSeen();
  }
  remark.addEventListener("input", write);
  element("copy").addEventListener("click", copy);
  element("share").hidden = !navigator.share;
  element("share").addEventListener("click", () => {
    navigator.share({ text: reply.value }).catch(() => {});
  });
  const answer = element("answer");
  answer.addEventListener("toggle", () => {
    if (answer.open) answer.scrollIntoView({ block: "nearest" });
  });
  answer.hidden = false;
  write();
})();
