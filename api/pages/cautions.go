package pages

import (
	"net/http"

	"github.com/gin-gonic/gin"
)

// cautions is GET /cautions: what the program is not for, and who decides instead. It needs no sign-in.
func (p *Pages) cautions(c *gin.Context) {
	if err := p.render(c, http.StatusOK, "cautions", "Cautions", nil); err != nil {
		p.failed(c, err)
	}
}
