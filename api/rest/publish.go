package rest

import (
	"crypto/sha256"
	"encoding/base64"
	"net/http"

	"github.com/gin-gonic/gin"
)

// openAPIType is the media type of an OpenAPI description in JSON (registered by the OpenAPI Initiative).
const openAPIType = "application/openapi+json"

// bodyTag is the entity tag of an answer that is made of nothing but its body.
func bodyTag(body []byte) string {
	sum := sha256.Sum256(body)
	return `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
}

// answer answers with the content. A client may keep it, and asks with If-None-Match whether it is still the same.
func (p published) answer(c *gin.Context) {
	tag := bodyTag(p.content)
	c.Header("ETag", tag)
	c.Header("Cache-Control", "no-cache")
	if p.script {
		c.Header("Content-Security-Policy", c.Writer.Header().Get("Content-Security-Policy")+"; script-src 'self'")
	}
	if held, err := tagsOf(c.Request.Header, "If-None-Match"); err == nil && held.sent && held.weak(tag) {
		c.Status(http.StatusNotModified)
		return
	}
	c.Data(http.StatusOK, p.media, p.content)
}
