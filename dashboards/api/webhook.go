package api

import (
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"

	"bridlewatch/dashboards/notify"
)

const webhookText = `What a route of kind webhook posts to its receiver.

With a secret the header Bridlewatch-Signature holds "sha256=" and the hexadecimal HMAC-SHA-256 (RFC 2104) of the body under that secret.
Bridlewatch-Delivery holds the id of the message: a receiver that has seen it may answer 200 and do nothing, since a message may come twice.
2xx takes the message; 408, 425, 429 and 5xx ask for another try within three days; any other answer refuses it for good. Redirects are not followed.`

// webhooks describes the messages of the box in the OpenAPI document.
func webhooks(doc *huma.OpenAPI) {
	header := func(name, text string) *huma.Param {
		return &huma.Param{Name: name, In: "header", Description: text, Schema: &huma.Schema{Type: huma.TypeString}}
	}
	message := doc.Components.Schemas.Schema(reflect.TypeFor[notify.Message](), true, "Message")
	doc.Webhooks = map[string]*huma.PathItem{"alert": {Post: &huma.Operation{
		OperationID: "webhook-alert", Method: http.MethodPost, Summary: "An alert was raised, named or ended, or is still open", Description: webhookText,
		Parameters:  []*huma.Param{header("Bridlewatch-Delivery", "id of the message"), header("Bridlewatch-Signature", "sha256= and the HMAC of the body")},
		RequestBody: &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{"application/json": {Schema: message}}},
		Responses:   map[string]*huma.Response{"200": {Description: "taken"}},
	}}}
}
