// A Sparkplug B edge node made with sparkplug-client for the tests of our
// reader.
//
//   node sparkplug_node.js PORT
//
// Node plant/edge has the metric "level", its device "gauge" has "level",
// "counts" (Int16) and "wet". Prints "born" after its births. Each line on
// standard input "node V", "device V" publishes a value, "dead" the death of
// the device. Kill it for the node's own death.
"use strict";
const sparkplug = require("sparkplug-client");
const readline = require("readline");

const port = process.argv[2];
const client = sparkplug.newClient({
  serverUrl: "tcp://127.0.0.1:" + port, username: "", password: "", groupId: "plant", edgeNode: "edge",
  clientId: "edge-" + process.pid, version: "spBv1.0", publishDeath: true, keepalive: 5,
});
const double = (name, value) => ({ name, type: "Double", value, timestamp: Date.now() });
client.on("birth", () => {
  client.publishNodeBirth({ timestamp: Date.now(), metrics: [double("level", 0.5)] });
  client.publishDeviceBirth("gauge", { timestamp: Date.now(), metrics: [
    double("level", 1.5),
    { name: "counts", type: "Int16", value: -7, timestamp: Date.now() },
    { name: "wet", type: "Boolean", value: true, timestamp: Date.now() },
  ] });
  console.log("born");
});
client.on("error", (err) => { console.error(err.message); process.exit(1); });
readline.createInterface({ input: process.stdin }).on("line", (line) => {
  const [what, value] = line.split(" ");
  if (what === "node") client.publishNodeData({ timestamp: Date.now(), metrics: [double("level", Number(value))] });
  if (what === "device") client.publishDeviceData("gauge", { timestamp: Date.now(), metrics: [double("level", Number(value))] });
  if (what === "dead") client.publishDeviceDeath("gauge", { timestamp: Date.now() });
});
