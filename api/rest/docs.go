package rest

import "github.com/gin-gonic/gin"

func (s *Service) registerDocs(router *gin.Engine) {}
