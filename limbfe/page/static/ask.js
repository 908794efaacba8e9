// Questions to the program behind the page; its answers are JSON.

export class Refused extends Error {
  constructor(message, answer) {
    super(message);
    this.answer = answer;
  }
}

export class Gone extends Error {}

export async function ask(name, question = {}, last = false) {
  let response;
  try {
    response = await fetch(name, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(question),
      keepalive: last,
    });
  } catch {
    throw new Gone("the program behind this page has ended: type limbfe sheet again. What you entered is kept as a draft beside the case.");
  }
  let answer = {};
  try {
    answer = await response.json();
  } catch {
    if (response.ok) throw new Refused("the answer could not be read; load the page anew", {});
  }
  if (!response.ok) throw new Refused(answer.error || `refused (${response.status})`, answer);
  return answer;
}
