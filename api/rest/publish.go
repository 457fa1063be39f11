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

// publish answers with the same content for everyone. A client may keep it, and asks with If-None-Match whether it is still the same.
func publish(router *gin.Engine, path, media string, content []byte) {
	tag := bodyTag(content)
	router.GET(path, func(c *gin.Context) {
		c.Header("ETag", tag)
		c.Header("Cache-Control", "no-cache")
		if held, err := tagsOf(c.Request.Header, "If-None-Match"); err == nil && held.sent && held.weak(tag) {
			c.Status(http.StatusNotModified)
			return
		}
		c.Data(http.StatusOK, media, content)
	})
}
