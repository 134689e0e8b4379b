// An OPC UA server made with node-opcua for the tests of our client.
//
//   node opcua_server.js PORT DIR [shifted]
//
// DIR is private to the run: it holds the server's certificates. With
// "shifted" another namespace is registered first, so the index of ours moves.
// Prints "ready" and the SHA-256 of its certificate, then serves until killed.
"use strict";
const crypto = require("crypto");
const path = require("path");
const { OPCUAServer, Variant, DataType, StatusCodes, SecurityPolicy, MessageSecurityMode, OPCUACertificateManager, DataValue } = require("node-opcua");

async function main() {
  const [port, dir, shifted] = process.argv.slice(2);
  const manager = new OPCUACertificateManager({ rootFolder: path.join(dir, "pki"), automaticallyAcceptUnknownCertificate: true });
  const server = new OPCUAServer({
    port: Number(port), hostname: "127.0.0.1", resourcePath: "/plant",
    serverCertificateManager: manager,
    userCertificateManager: manager,
    securityPolicies: [SecurityPolicy.None, SecurityPolicy.Basic256Sha256, SecurityPolicy.Aes128_Sha256_RsaOaep, SecurityPolicy.Aes256_Sha256_RsaPss],
    securityModes: [MessageSecurityMode.None, MessageSecurityMode.Sign, MessageSecurityMode.SignAndEncrypt],
    allowAnonymous: true,
    userManager: { isValidUser: (name, password) => name === "reader" && password === "level" },
    serverCapabilities: { maxSessions: 200, operationLimits: { maxNodesPerRead: 4, maxMonitoredItemsPerCall: 10 } },
  });
  await server.initialize();
  const space = server.engine.addressSpace;
  if (shifted) space.registerNamespace("urn:another");
  const ns = space.registerNamespace("urn:peer:plant");
  const unit = ns.addObject({ organizedBy: space.rootFolder.objects, browseName: "Unit" });
  let n = 0;
  const add = (name, dataType, get) =>
    ns.addVariable({ componentOf: unit, nodeId: "s=" + name, browseName: name, dataType, minimumSamplingInterval: 50, value: { timestamped_get: get } });
  const value = (dataType, v, statusCode) => () =>
    new DataValue({ value: new Variant({ dataType, value: v }), statusCode: statusCode || StatusCodes.Good, sourceTimestamp: new Date("2026-05-01T12:00:00Z"), serverTimestamp: new Date() });
  add("level", DataType.Double, value(DataType.Double, 0.6125));
  add("float32", DataType.Float, value(DataType.Float, 1.5));
  add("counts", DataType.UInt16, value(DataType.UInt16, 27648));
  add("signed", DataType.Int32, value(DataType.Int32, -7));
  add("contact", DataType.Boolean, value(DataType.Boolean, true));
  add("text", DataType.String, value(DataType.String, "twelve"));
  add("uncertain", DataType.Double, value(DataType.Double, 2.5, StatusCodes.UncertainLastUsableValue));
  add("bad", DataType.Double, value(DataType.Double, 9, StatusCodes.BadSensorFailure));
  add("moving", DataType.Double, () =>
    new DataValue({ value: new Variant({ dataType: DataType.Double, value: n++ }), statusCode: StatusCodes.Good, sourceTimestamp: new Date(), serverTimestamp: new Date() }));
  await server.start();
  console.log("ready " + crypto.createHash("sha256").update(server.getCertificate()).digest("hex"));
}

main().catch((err) => { console.error(err.message); process.exit(1); });
