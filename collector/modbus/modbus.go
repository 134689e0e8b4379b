// Package modbus reads Modbus devices over TCP, RTU over TCP and RTU on a
// serial line. It can only read: every request passes one place that refuses
// all function codes but 1 to 4.
//
// Frames and function codes come from a library; what moves bytes is our
// own, because a wrong value without an error is the worst a collector can
// deliver. A late answer must never be taken for the answer to another
// request:
//
//   - With transaction identifiers (TCP) an answer to an earlier request is
//     thrown away and counted; any other doubt closes the connection.
//   - Without them (RTU, RTU over TCP, gateways that do not echo them) an
//     answer is known by its unit, function and length alone. The line is
//     listened to after a time-out and emptied before each request. While a
//     unit owes an answer, nothing of the same length is asked of it: a few
//     registers more are read instead, or nothing for a while. When something
//     comes that nobody asked for, the values of that scan it could belong to
//     are taken back before they are delivered.
//
// Every answer must have the unit, the function code and exactly the number
// of bytes that were asked for. One Source owns one endpoint and multiplexes
// the units behind it fairly; a unit that does not answer is left alone for
// a while, and an address a device refuses spoils only itself.
//
// Sources: Modbus Application Protocol Specification V1.1b3, Modbus
// Messaging on TCP/IP Implementation Guide V1.0b, Modbus over Serial Line
// Specification and Implementation Guide V1.02.
package modbus
